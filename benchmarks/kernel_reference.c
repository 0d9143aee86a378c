/* The hot loop of calmday.model.kernel in plain C: the yardstick of benchmarks/bench_kernel.py.
   Two forms of the same sum over samples for every draw:
   basis_form     every product of parameters is one column, as the Python kernel has it, nothing settled beforehand;
   physical_form  the forces worked out from speed, wind and air as one fused expression per sample.
   Build: cc -O3 -march=native -ffast-math -fopenmp -shared -fPIC */
#include <math.h>
#include <stdlib.h>

void basis_form(long m, long n, long j, long k, const double *wheel_c, const double *loss_c, const double *wheel_b,
                const double *loss_b, const double *eta, const double *gain, const double *cap_c, const double *floor_c,
                const double *cap_b, const double *running, const double *weight, double *energy)
{
#pragma omp parallel
    {
        double *w = malloc(n * sizeof *w), *l = malloc(n * sizeof *l);
#pragma omp for
        for (long d = 0; d < m; d++) {
            for (long i = 0; i < n; i++) w[i] = l[i] = 0;
            for (long a = 0; a < j; a++) {
                const double c = wheel_c[d * j + a], *b = wheel_b + a * n;
                for (long i = 0; i < n; i++) w[i] += c * b[i];
            }
            for (long a = 0; a < k; a++) {
                const double c = loss_c[d * k + a], *b = loss_b + a * n;
                for (long i = 0; i < n; i++) l[i] += c * b[i];
            }
            double sum = 0;
            for (long i = 0; i < n; i++) {
                double s = fmin(fmax(w[i] / eta[d], w[i] * eta[d]), cap_c[d] * cap_b[i]);
                sum += weight[i] * fmax(gain[d] * s + l[i], floor_c[d] * running[i]);
            }
            energy[d] = sum;
        }
        free(w), free(l);
    }
}

/* p: m rows of 16: rolling, growth, mass, area, side, a, b, east, north, gust, eta, gain, cap, floor, friction, friction2 */
void physical_form(long m, long n, const double *p, const double *v, const double *climb, const double *head,
                   const double *cross, const double *sine, const double *cosine, const double *gust, const double *half,
                   const double *turns, const double *cap_b, const double *weight, double *energy)
{
#pragma omp parallel for
    for (long d = 0; d < m; d++) {
        const double *q = p + 16 * d;
        double sum = 0;
        for (long i = 0; i < n; i++) {
            double along = v[i] + q[5] * head[i] + q[6] * cross[i] - q[7] * sine[i] - q[8] * cosine[i];
            double side = q[5] * cross[i] - q[6] * head[i] + q[7] * cosine[i] - q[8] * sine[i];
            double force = q[0] * 9.80665 * (1 + q[1] * v[i] * v[i]) +
                           half[i] * (q[3] * (along * fabs(along) + q[9] * gust[i]) + q[4] * side * side);
            double w = v[i] * force + q[2] * climb[i];
            double s = fmin(fmax(w / q[10], w * q[10]), q[12] * cap_b[i]);
            double loss = q[14] * turns[i] + q[15] * turns[i] * turns[i];
            sum += weight[i] * fmax(q[11] * s + loss, q[13]);
        }
        energy[d] = sum;
    }
}
