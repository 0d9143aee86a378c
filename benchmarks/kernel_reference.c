/* The hot loop of calmday.model in plain C: the yardstick of benchmarks/bench_kernel.py.

   One row of `rows` (26, n) per property of a sample, one row of `draws` (m, 28) per drawn vehicle, both as
   calmday.model.kernel_compiled makes them; the sum is that of calmday.model.kernel_loop, written as anyone would
   write it in C: one loop over draws shared out by OpenMP, one loop over samples.

   Build: cc -O3 -march=native -ffast-math -fopenmp -shared -fPIC */

#define COLUMNS 28
#define ROW(k) rows[(k) * n + i]

static inline double larger(double a, double b) { return a > b ? a : b; }
static inline double smaller(double a, double b) { return a < b ? a : b; }

void fuel_energy(long m, long n, const double *draws, const double *rows, const double *axial, const double *weight,
                 double *energy)
{
#pragma omp parallel for
    for (long d = 0; d < m; d++) {
        const double *p = draws + COLUMNS * d;
        const double area = p[0], growth = p[1], turbulence = p[2], with_wind = p[3], turned = p[4], east = p[5],
                     north = p[6], rolling = p[7], faster = p[8], warm_0 = p[9], warm_1 = p[10], warm_2 = p[11],
                     mass = p[12], back = p[13], knee = p[14], floor = p[15], late = p[16], friction = p[17],
                     slope = p[18], drag = p[19], pumping = p[20], accessories = p[21], cold_0 = p[22], cold_1 = p[23],
                     cold_2 = p[24], enrichment = p[25], steeper = p[26], most = p[27];
        double sum = 0;
        for (long i = 0; i < n; i++) {
            double along = ROW(0) + with_wind * ROW(1) + turned * ROW(2) - east * ROW(3) - north * ROW(4);
            double side = with_wind * ROW(2) - turned * ROW(1) + east * ROW(4) - north * ROW(3);
            double air = axial[i] * along * along + (ROW(5) + growth * ROW(6)) * side * side +
                         turbulence * (ROW(7) + growth * ROW(8));
            double wheel = area * air + rolling * ROW(9) + faster * ROW(10) + warm_0 * ROW(11) + warm_1 * ROW(12) +
                           warm_2 * ROW(13) + mass * ROW(14);
            double shaft = smaller(larger(wheel, back * wheel), most * knee * ROW(15));
            shaft += steeper * larger(shaft - knee * ROW(15), 0);
            double turns = ROW(16) + late * ROW(17);
            double own = friction * turns + slope * (ROW(18) + late * ROW(19)) + drag * ROW(20);
            double losses = own * (1 + cold_0 * ROW(21) + cold_1 * ROW(22) + cold_2 * ROW(23)) + pumping * turns +
                            accessories * ROW(24);
            sum += larger(shaft + losses, floor * ROW(24)) * weight[i] * (1 + enrichment * ROW(25));
        }
        energy[d] = sum;
    }
}
